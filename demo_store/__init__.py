"""The demo kitchen, Lantern Street: its file, and an evening to replay. All of it is invented."""
