"""How gunicorn serves the pages, in every way of running."""

import os
from pathlib import Path

wsgi_app = "config.wsgi"
bind = f"{os.environ.get('HOST') or '127.0.0.1'}:{os.environ.get('PORT') or '8000'}"

# Plain workers: with threads and keep-alive a browser sticks to one worker while another stands idle.
worker_class = "sync"
workers = int(os.environ.get("WEB_WORKERS") or 2)
timeout = 60
graceful_timeout = 20
max_requests = 5000  # a worker is renewed now and then, whatever a library may leak
max_requests_jitter = 500

# Who may say "this came by https" or "this came from over there": a proxy in front, and nobody otherwise.
_behind_proxy = (os.environ.get("BEHIND_PROXY") or "false").lower() in {"1", "true", "yes", "on"}
forwarded_allow_ips = "*" if _behind_proxy else ""

control_socket_disable = True
# Workers sign for life through a file; on a slow disk that alone can stall them.
_memory = Path("/dev/shm")  # noqa: S108
worker_tmp_dir = str(_memory) if _memory.is_dir() else None
errorlog = "-"
loglevel = "warning"
