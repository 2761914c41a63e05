from django.urls import path

from scheduling import urls_contractor, urls_messages, urls_recurring, views

app_name = "scheduling"

urlpatterns = [
    path("work/", views.work, name="work"),
    path("tasks/<int:pk>/", views.task, name="task"),
    path("feeds/", views.feeds, name="feeds"),
    path("feeds/new/", views.feed_new, name="feed-new"),
    path("feeds/<int:pk>/revoke/", views.feed_revoke, name="feed-revoke"),
    path("feed/<str:token>.ics", views.feed, name="feed"),
    *urls_contractor.urlpatterns,
    *urls_messages.urlpatterns,
    *urls_recurring.urlpatterns,
]
