"""How gunicorn serves the pages in production."""

bind = "0.0.0.0:8000"  # inside its container; the compose file says where it is published
workers = 2
threads = 4
# A page that takes longer is broken: long work belongs to jobs.
timeout = 60
graceful_timeout = 20
# Workers are renewed now and then, not all at once, so that a slow leak cannot grow without end.
max_requests = 5000
max_requests_jitter = 500
accesslog = "-"
access_log_format = '%(h)s "%(r)s" %(s)s %(b)s %(M)sms'
