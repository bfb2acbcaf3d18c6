"""Many trucks at once: each second counted once, sums by truck, route and month, changes and outliers."""
