"""What is kept for years: the database, its chain of entries, the files behind it. Only here is SQL."""
