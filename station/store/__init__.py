"""The record: tables, migrations, and reading and writing them."""
