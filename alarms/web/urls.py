"""Pages that a link in a mail opens."""

from django.urls import URLPattern, URLResolver, path

from alarms.web.answer import answer, answer_together

urlpatterns: list[URLPattern | URLResolver] = [
    path("answer/<str:token>", answer, name="alarm-answer"),
    path("answer-together/<str:token>", answer_together, name="alarms-answer-together"),
]
