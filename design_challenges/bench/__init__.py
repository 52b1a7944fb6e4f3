"""The benchmark: what the product costs, measured side by side with a bare view on the same server."""
