"""PostgreSQL and a message broker for machines where neither is installed, and their helpers.

The servers come as program files inside Python packages; what starts, finds and stops them is
written here. No module of this folder imports Django.
"""
