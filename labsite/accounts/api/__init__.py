"""What every view of the REST API is made of, and the person's own part of it.

It stands here, lowest of the apps that have views, since who may ask depends on the lab's settings.
"""
