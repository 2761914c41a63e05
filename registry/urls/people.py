from django.urls import path

from registry.views import invitations, people

OF = "organisations/<int:pk>/people/"

urlpatterns = [
    path(OF, people.people, name="people"),
    path(f"{OF}log/", people.access_log, name="access-log"),
    path(f"{OF}second-step/", people.second_step, name="people-second-step"),
    path(f"{OF}invite/<str:kind>/", people.people_invite, name="people-invite"),
    path(
        f"{OF}invitations/<int:invitation_pk>/again/",
        people.invitation_again,
        name="invitation-again",
    ),
    path(
        f"{OF}invitations/<int:invitation_pk>/withdraw/",
        people.invitation_withdraw,
        name="invitation-withdraw",
    ),
    path(f"{OF}<uuid:uuid>/", people.member, name="member"),
    path(f"{OF}<uuid:uuid>/end/", people.member_end, name="member-end"),
    path("invited/<str:secret>/", invitations.invitation, name="invitation"),
]
