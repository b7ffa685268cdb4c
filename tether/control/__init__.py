"""What a run and its faces say to one another: commands, events, the socket, what runs."""
