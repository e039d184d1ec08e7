"""The commands, one file each: thin faces. All that they do can be done from Python in as few words."""
