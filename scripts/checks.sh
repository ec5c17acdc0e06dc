# Sourced by lint.sh and test.sh, after steps.sh.
deployment_check() { # stand-in values: only what the settings say is looked at, nothing is connected to
    env DJANGO_SETTINGS_MODULE=config.settings.prod ALLOWED_HOSTS=board.example.org \
        SECRET_KEY="$(printf 'stand-in%.0s' 1 2 3 4 5 6 7)-0123456789" SITE_ADDRESS=https://board.example.org \
        DATABASE_URL=postgresql://museum@127.0.0.1:1/museum REDIS_URL=redis://127.0.0.1:1/0 BEHIND_PROXY=true \
        .venv/bin/python manage.py check --deploy --fail-level WARNING
}

checks() {
    step "style" .venv/bin/python -m ruff check .
    step "layout" .venv/bin/python -m ruff format --check .
    step "types" .venv/bin/python -m mypy config fleet maintenance readiness
    step "imports" .venv/bin/lint-imports
    step "migrations" env DJANGO_SETTINGS_MODULE=config.settings.test .venv/bin/python manage.py makemigrations --check --dry-run
    step "deployment settings" deployment_check
}
