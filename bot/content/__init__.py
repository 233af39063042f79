"""What the helper says and knows, as files that a trainer can edit, and the readers that check them."""
