from django.urls import path

from scheduling.views import chain_heads, jobs, mail, webhooks

urlpatterns = [
    path("messages/", mail.messages_page, name="messages"),
    path("unsubscribe/<str:token>/", mail.unsubscribe_page, name="unsubscribe"),
    path("webhooks/", webhooks.webhooks, name="webhooks"),
    path("webhooks/<int:pk>/", webhooks.webhook, name="webhook"),
    path("webhooks/<int:pk>/trial/", webhooks.webhook_trial, name="webhook-trial"),
    path("webhooks/<int:pk>/secret/", webhooks.webhook_secret, name="webhook-secret"),
    path("webhooks/<int:pk>/again/<int:message_pk>/", webhooks.webhook_again, name="webhook-again"),
    path("heads.csv", chain_heads.chain_heads, name="heads"),
    path("jobs/", jobs.jobs, name="jobs"),
]
