"""What survives a restart: its content and its owner, how it is taken up again, and how it is put on file."""
