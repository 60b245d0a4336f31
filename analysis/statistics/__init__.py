"""Statistics of returns that need not scatter evenly: bound, trend, clusters, correlation."""
