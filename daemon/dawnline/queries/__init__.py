"""What a pond's store and a running service are asked: by the command line, the page and the report alike."""
