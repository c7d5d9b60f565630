"""Many models: layouts to try, how they are run, and what comes of them."""
