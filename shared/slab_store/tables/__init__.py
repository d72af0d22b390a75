"""Table definitions for SQLAlchemy Core. The migrations are the truth; a test holds these equal to them."""
