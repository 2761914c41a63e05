from django.urls import path

from scheduling import views
from scheduling.urls import contractor as urls_contractor
from scheduling.urls import desk as urls_desk
from scheduling.urls import messages as urls_messages
from scheduling.urls import recurring as urls_recurring

app_name = "scheduling"

urlpatterns = [
    path("work/", views.work, name="work"),
    path("tasks/<int:pk>/", views.task, name="task"),
    path("feeds/", views.feeds, name="feeds"),
    path("feeds/new/", views.feed_new, name="feed-new"),
    path("feeds/<int:pk>/revoke/", views.feed_revoke, name="feed-revoke"),
    path("feed/<str:token>.ics", views.feed, name="feed"),
    *urls_contractor.urlpatterns,
    *urls_desk.urlpatterns,
    *urls_messages.urlpatterns,
    *urls_recurring.urlpatterns,
]
