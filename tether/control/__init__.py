"""What a run and its faces say to one another: the stream, commands, the socket, what runs."""
