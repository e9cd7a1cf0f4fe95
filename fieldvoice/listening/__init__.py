"""From a microphone to closed pieces of sound, and what a keeper says to the recorder."""
