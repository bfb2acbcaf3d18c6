"""Everything measured becomes a Reading; one folder for each way of making them."""
