"""What touches the world: boards, files, the command line, the window."""
