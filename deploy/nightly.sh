#!/usr/bin/env bash
# The night's backup: make it, read it back, send it to another place, forget the old ones. Any failed step is an error.
#   deploy/nightly.sh FOLDER [RSYNC-DESTINATION]
# KEEP_DAYS=30 is how long backups stay on this machine.
set -euo pipefail

folder="${1:?Write: deploy/nightly.sh FOLDER [RSYNC-DESTINATION]}"
destination="${2:-}"
keep_days="${KEEP_DAYS:-30}"
here="$(cd "$(dirname "$0")/.." && pwd)"
cd "$here"
folder="$(realpath -m "$folder")"
name="$(date +%Y-%m-%dT%H%M%S)"
mkdir -p "$folder"

if [ -x .venv/bin/python ]; then
    inside="$folder"
    manage() { .venv/bin/python manage.py "$@"; }
else
    # FOLDER is BACKUP_FOLDER of .env here; the container sees it as /backups.
    inside=/backups
    manage() { docker compose run --rm --no-deps -T web python manage.py "$@"; }
fi

manage backup "$inside/$name"
manage restore --check "$inside/$name"
if [ -n "$destination" ]; then
    rsync --archive --partial-dir=.rsync-partial "$folder/$name" "$destination"
fi
# Only folders with a date for a name, and only after today's is safe.
find "$folder" -mindepth 1 -maxdepth 1 -type d -name '20??-??-??T??????' -mtime "+$keep_days" -exec rm -rf {} +
