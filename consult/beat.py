"""The Celery application of beat alone: ticks need the schedule and the broker, neither models nor tasks.

`python -m consult.beat` runs it without Celery's command line, whose shell would cost 10 MB.
"""

from celery import Celery

app = Celery("consult", fixups=[])
app.config_from_object("consult.settings", namespace="CELERY")

if __name__ == "__main__":
    app.Beat(loglevel="WARNING", scheduler="celery.beat:Scheduler", quiet=True).run()
