"""The invented lab of ``manage.py demo``: its people, stocks and readings, made through the services.

Nothing here is a measurement of a real thing, and every page of such a lab says so.
"""
