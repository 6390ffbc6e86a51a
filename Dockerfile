# The image of web, worker and beat. No engine was at hand where this was written: see README.md.
FROM node:22-bookworm-slim AS browser-files
WORKDIR /app
COPY package.json package-lock.json .npmrc ./
RUN npm ci --omit=dev

FROM python:3.11-slim-bookworm
ENV PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1
RUN useradd --system --uid 10001 --create-home --home-dir /home/rooftally rooftally \
    && install -d -o rooftally -g rooftally /data /srv/static
WORKDIR /app
COPY requirements.lock ./
RUN pip install --require-hashes -r requirements.lock
COPY manage.py ./
COPY fleet fleet
COPY onboarding onboarding
COPY api api
COPY templates templates
COPY --from=browser-files /app/node_modules node_modules
USER rooftally
ENV ROOFTALLY_DATA_DIR=/data ROOFTALLY_STATIC_DIR=/srv/static
# Static files are part of the image, and `collectstatic` adds them to a folder that outlives it where one is mounted.
# The build's own secrets stay outside.
RUN ROOFTALLY_DATA_DIR=/tmp/build python manage.py collectstatic --noinput -v0 && rm -rf /tmp/build
EXPOSE 8000
CMD ["gunicorn", "fleet.config.wsgi:application", "--bind", "0.0.0.0:8000", "--worker-class", "gthread", \
     "--workers", "2", "--threads", "8", "--timeout", "60", "--graceful-timeout", "20", "--no-control-socket", \
     "--limit-request-line", "4094", "--limit-request-fields", "64", "--limit-request-field_size", "8190"]
