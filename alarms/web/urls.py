"""Pages that a link in a mail opens."""

from django.urls import URLPattern, URLResolver, path

from alarms.web.answer import answer

urlpatterns: list[URLPattern | URLResolver] = [path("answer/<str:token>", answer, name="alarm-answer")]
