# One image for every process of the board; docker-compose.yml says which one a container runs.
FROM python:3.11-slim-bookworm AS packages
COPY requirements.lock /
RUN python -m venv /venv \
    && /venv/bin/pip install --no-cache-dir --require-hashes --only-binary :all: -r /requirements.lock

FROM python:3.11-slim-bookworm
ENV PATH=/venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1
# The seals lie outside the database; the folder is the container's only one that the board may write.
RUN useradd --system --uid 10001 --no-create-home board \
    && mkdir /seals \
    && chown board /seals
COPY --from=packages /venv /venv
WORKDIR /board
COPY manage.py ./
COPY api api
COPY consult consult
COPY dosing dosing
COPY templates templates
USER 10001
EXPOSE 8000
CMD ["uvicorn", "consult.asgi:application", "--host", "0.0.0.0", "--port", "8000", "--lifespan", "off"]
