"""Text to typed values with their places, and the file's form back to text for readers."""
