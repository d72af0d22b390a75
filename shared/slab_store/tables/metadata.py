"""The one metadata object that all table definitions hang on."""

from sqlalchemy import MetaData

metadata = MetaData(
    naming_convention={
        "pk": "%(table_name)s_pkey",
        "fk": "%(table_name)s_%(column_0_name)s_fkey",
        "ix": "%(table_name)s_%(column_0_N_name)s_idx",
        "uq": "%(table_name)s_%(column_0_N_name)s_key",
        "ck": "%(table_name)s_%(constraint_name)s_check",
    }
)
