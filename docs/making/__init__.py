"""What the documents take from the program itself: outputs, pictures, claims, sources, reference."""
