"""On site: from readings and a few microphone positions back to what really hangs."""
