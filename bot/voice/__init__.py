"""Voice notes: sound to words, and words to sound. Nothing here decides what becomes of them."""
