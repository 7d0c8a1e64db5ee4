"""Plans to what people read: text or bytes, never opening a file."""
