"""Readers of files that people bring: each gives readings or outlines, or an error that names the line."""
