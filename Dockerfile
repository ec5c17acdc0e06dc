# One image for web, worker, clock and the odd command. Not root, nothing written outside its volume and /tmp.
FROM python:3.13-slim-bookworm

# Pango sets the type of the prints. The PostgreSQL client makes and reads backups; this release's is 15, like the
# server's image in docker-compose.yml: a client older than its server refuses to work.
RUN apt-get update \
    && apt-get install -y --no-install-recommends \
       libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 postgresql-client-15 \
    && rm -rf /var/lib/apt/lists/*

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 STATIC_ROOT=/srv/static HOME=/tmp
WORKDIR /srv/app

COPY requirements.lock .
RUN pip install --no-cache-dir --disable-pip-version-check --require-hashes -r requirements.lock

COPY . .
# Stand-in values: collecting the style files needs settings that load, and keeps none of them.
RUN python -m compileall -q config fleet maintenance readiness \
    && DJANGO_SETTINGS_MODULE=config.settings.prod SECRET_KEY=unused-while-building ALLOWED_HOSTS=localhost \
       SITE_ADDRESS=https://localhost python manage.py collectstatic --noinput --verbosity 0 \
    && useradd --system --uid 10001 --home-dir /var/lib/running-order museum \
    && install -d -o museum -g museum -m 0750 /var/lib/running-order

USER museum
VOLUME /var/lib/running-order
EXPOSE 8000
CMD ["gunicorn", "config.wsgi", "--config", "deploy/gunicorn.conf.py"]
