"""Physics as pure functions, one flat file a subject: SI floats in, SI floats out."""
