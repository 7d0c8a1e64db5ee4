"""The commands, one module each: parse, call, show. What is heavy is imported inside them."""
