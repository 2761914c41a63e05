"""Every address of the book against every kind of person, so that a new one cannot be forgotten.

Each address is named here with the right it asks for; an address without a line fails the first
test. What each right means for each person is written once, in `MEANING`.
"""

from copy import deepcopy
from http.cookies import SimpleCookie

from django.db import transaction
from django.test import Client, TestCase
from django.urls import URLPattern, get_resolver, reverse

from tests.conftest import make_world
from tests.world_objects import make_objects

OK, REFUSED, MISSING, SIGN_IN = "ok", 403, 404, "sign in"
FORM_TO_MEND = 422  # the empty form these tests send, given back with its errors

# right -> person -> what they get
MEANING = {
    "read": {
        "owner": OK, "technician": OK, "viewer": OK, "auditor": OK, "stranger": MISSING,
        "nobody": SIGN_IN,
    },
    "record": {
        "owner": OK, "technician": OK, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "manage": {
        "owner": OK, "technician": REFUSED, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "manage own": {  # no row yet: a manager of any owner may, for that owner
        "owner": OK, "technician": REFUSED, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": OK, "nobody": SIGN_IN,
    },
    "work": {  # whoever has the follow-up: here the contractor
        "owner": REFUSED, "technician": OK, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "crew": {  # a contractor's own affair; its technician is no manager
        "owner": MISSING, "technician": REFUSED, "viewer": MISSING, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "plan": {  # a contractor's own affair; whoever records for it may plan its days
        "owner": MISSING, "technician": OK, "viewer": MISSING, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "mine": {  # a row that belongs to the owner's manager personally
        "owner": OK, "technician": MISSING, "viewer": MISSING, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "import": {  # the owner's own affair: others are not told of it
        "owner": OK, "technician": MISSING, "viewer": REFUSED, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "prove": {  # takes the owner's records away: its managers and its auditors
        "owner": OK, "technician": REFUSED, "viewer": REFUSED, "auditor": OK,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "signed in": {
        "owner": OK, "technician": OK, "viewer": OK, "auditor": OK, "stranger": OK,
        "nobody": SIGN_IN,
    },
    "used up": dict.fromkeys(  # opens an empty book, and this one is not
        ("owner", "technician", "viewer", "auditor", "stranger", "nobody"), MISSING
    ),
    "none kept": {  # the tests' mail goes to no folder
        "owner": MISSING, "technician": MISSING, "viewer": MISSING, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "failed": dict.fromkeys(  # says 401 to everybody
        ("owner", "technician", "viewer", "auditor", "stranger", "nobody"), 401
    ),
    "not a keeper": {
        "owner": REFUSED, "technician": REFUSED, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": REFUSED, "nobody": SIGN_IN,
    },
    "not known": dict.fromkeys(
        ("owner", "technician", "viewer", "auditor", "stranger", "nobody"), REFUSED
    ),
    "public": dict.fromkeys(("owner", "technician", "viewer", "auditor", "stranger", "nobody"), OK),
}  # fmt: skip

# address -> method -> right
ADDRESSES = {
    "account_login": {"get": "public", "post": "public"},
    "account_logout": {"get": "public", "post": "public"},
    "account_inactive": {"get": "public"},
    "keeper-sign-in": {"get": "not a keeper"},
    "account_signup": {"get": "public", "post": "public"},
    "account_reset_password": {"get": "public", "post": "public"},
    "account_reset_password_done": {"get": "public"},
    "account_reset_password_from_key": {"get": "public", "post": "public"},
    "account_reset_password_from_key_done": {"get": "public"},
    "mfa_authenticate": {"get": "public", "post": "public"},  # leads on without a first step
    "mfa_login_webauthn": {"get": "public", "post": "public"},
    "socialaccount_login_cancelled": {"get": "public"},
    "socialaccount_login_error": {"get": "failed"},
    "socialaccount_signup": {"get": "not known"},
    "openid_connect_login": {"get": "used up", "post": "used up"},  # no provider is set up
    "openid_connect_callback": {"get": "used up"},
    "account_reauthenticate": {"get": "signed in", "post": "signed in"},
    "mfa_reauthenticate": {"get": "signed in", "post": "signed in"},
    "mfa_reauthenticate_webauthn": {"get": "signed in", "post": "signed in"},
    "registry:prove-outside": {"get": "signed in"},
    "account_set_password": {"get": "signed in", "post": "signed in"},
    "usersessions_list": {"get": "signed in", "post": "signed in"},
    "mfa_index": {"get": "signed in"},
    "mfa_activate_totp": {"get": "signed in", "post": "signed in"},
    "mfa_deactivate_totp": {"get": "mine", "post": "mine"},
    "mfa_list_webauthn": {"get": "signed in"},
    "mfa_add_webauthn": {"get": "signed in", "post": "signed in"},
    "mfa_edit_webauthn": {"get": "mine", "post": "mine"},
    "mfa_remove_webauthn": {"get": "mine", "post": "mine"},
    "mfa_view_recovery_codes": {"get": "mine"},
    "mfa_generate_recovery_codes": {"get": "signed in", "post": "signed in"},
    "mfa_download_recovery_codes": {"get": "mine"},
    "socialaccount_connections": {"get": "signed in", "post": "signed in"},
    "registry:sign-in-log": {"get": "signed in"},
    "registry:sign-in-log-people": {"get": "manage own", "post": "manage own"},
    "registry:run-worker": {"get": "public"},
    "registry:phone": {"get": "signed in"},
    "registry:phone-discarded": {"post": "signed in"},
    "registry:account": {"get": "signed in", "post": "signed in"},
    "account_change_password": {"get": "signed in", "post": "signed in"},
    "registry:echo": {"get": "signed in"},
    "registry:people": {"get": "import"},
    "registry:access-log": {"get": "import"},
    "registry:people-second-step": {"get": "import", "post": "import"},
    "registry:people-invite": {"get": "import", "post": "import"},
    "registry:invitation-again": {"post": "import"},
    "registry:invitation-withdraw": {"post": "import"},
    "registry:member": {"get": "import", "post": "import"},
    "registry:member-end": {"post": "import"},
    "registry:invitation": {"get": "public", "post": "public"},
    "registry:begin": {"get": "used up", "post": "used up"},
    "registry:first-steps": {"get": "manage own", "post": "manage own"},
    "registry:health": {"get": "public"},
    "registry:ready": {"get": "public"},
    "registry:site-new": {"get": "manage own", "post": "manage own"},
    "registry:site": {"get": "read"},
    "registry:site-edit": {"get": "manage", "post": "manage"},
    "registry:building-new": {"get": "manage", "post": "manage"},
    "registry:building-edit": {"get": "manage", "post": "manage"},
    "registry:contract-new": {"get": "manage", "post": "manage"},
    "registry:contract-edit": {"get": "manage", "post": "manage"},
    "registry:system-new": {"get": "manage", "post": "manage"},
    "registry:system": {"get": "read"},
    "registry:system-edit": {"get": "manage", "post": "manage"},
    "registry:pipe-new": {"get": "manage", "post": "manage"},
    "registry:pipe-correct": {"get": "manage", "post": "manage"},
    "registry:fitting-new": {"get": "manage", "post": "manage"},
    "registry:fitting-edit": {"get": "manage", "post": "manage"},
    "registry:record-choose": {"get": "record"},
    "registry:record-new": {"get": "record", "post": "record"},
    "registry:record": {"get": "read"},
    "registry:record-correct": {"get": "record", "post": "record"},
    "registry:record-withdraw": {"get": "record", "post": "record"},
    "registry:run-plan": {"get": "read", "post": "record"},
    "registry:drain-down": {"get": "read", "post": "record"},
    "registry:run": {"get": "read"},
    "registry:run-step": {"post": "record"},
    "registry:run-stop": {"post": "record"},
    "registry:run-gas": {"get": "record"},
    "registry:run-photo": {"get": "record", "post": "record"},
    "registry:run-sign": {"get": "record", "post": "record"},
    "registry:run-correct": {"get": "record", "post": "record"},
    "registry:at-sign": {"get": "public"},
    "registry:at-sign-drain": {"get": "public"},
    "registry:at-sign-tell": {"get": "public", "post": "public"},
    "registry:told": {"get": "record", "post": "record"},
    "registry:told-confirm": {"get": "record", "post": "record"},
    "registry:told-erase": {"post": "manage"},
    "registry:import-new": {"get": "manage own", "post": "manage own"},
    "registry:import-bad-rows": {"get": "import"},  # before a new reading replaces the file
    "registry:import": {"get": "import", "post": "import"},
    "registry:import-load": {"post": "import"},
    "registry:import-take-back": {"post": "import"},
    "registry:rows-to-fix": {"get": "read", "post": "manage"},
    "scheduling:work": {"get": "signed in"},
    "scheduling:order-inerting": {"get": "manage", "post": "manage"},
    "scheduling:several": {"post": "signed in"},
    "scheduling:task": {"get": "read"},
    "scheduling:work-several": {"post": "signed in"},
    "scheduling:task-step": {"get": "work", "post": "work"},
    "scheduling:task-hand-over": {"get": "manage", "post": "manage"},
    "scheduling:task-comment": {"post": "record"},
    "scheduling:day": {"get": "signed in"},
    "scheduling:day-pages": {"get": "signed in"},
    "scheduling:week": {"get": "signed in"},
    "scheduling:week-plan": {"post": "plan"},
    "scheduling:week-accept": {"post": "plan"},
    "scheduling:week-drop": {"post": "plan"},
    "scheduling:week-swap": {"post": "plan"},
    "scheduling:week-move": {"get": "work", "post": "work"},
    "scheduling:planning": {"get": "signed in"},
    "scheduling:planning-policy": {"get": "crew", "post": "crew"},
    "scheduling:planning-import": {"get": "crew", "post": "crew"},
    "scheduling:depot-new": {"get": "crew", "post": "crew"},
    "scheduling:depot-edit": {"get": "crew", "post": "crew"},
    "scheduling:work-time": {"get": "crew", "post": "crew"},
    "scheduling:place-edit": {"get": "record", "post": "record"},
    "scheduling:place-building": {"get": "record", "post": "record"},
    "scheduling:month": {"get": "signed in"},
    "scheduling:crews": {"get": "signed in"},
    "scheduling:crew-new": {"get": "crew", "post": "crew"},
    "scheduling:crew-edit": {"get": "crew", "post": "crew"},
    "scheduling:rules": {"get": "signed in"},
    "scheduling:rules-owner": {"get": "read"},
    "scheduling:rules-acceptance": {"get": "manage", "post": "manage"},
    "scheduling:rule-edit": {"get": "manage", "post": "manage"},
    "scheduling:rule-levels": {"get": "manage", "post": "manage"},
    "scheduling:feeds": {"get": "signed in"},
    "scheduling:feed-new": {"post": "signed in"},
    "scheduling:feed-revoke": {"get": "mine", "post": "mine"},
    "scheduling:feed": {"get": "public"},
    "scheduling:messages": {"get": "signed in", "post": "signed in"},
    "scheduling:outbox": {"get": "signed in"},
    "scheduling:outbox-mail": {"get": "none kept"},
    "scheduling:unsubscribe": {"get": "public", "post": "public"},
    "scheduling:webhooks": {"get": "manage own", "post": "manage own"},
    "scheduling:webhook": {"get": "import", "post": "import"},
    "scheduling:webhook-trial": {"post": "import"},
    "scheduling:webhook-secret": {"post": "import"},
    "scheduling:webhook-again": {"post": "import"},
    "scheduling:heads": {"get": "signed in"},
    "scheduling:jobs": {"get": "manage own"},
    "scheduling:due": {"get": "signed in"},
    "scheduling:library": {"get": "signed in"},
    "scheduling:library-owner": {"get": "read"},
    "scheduling:library-new": {"get": "manage", "post": "manage"},
    "scheduling:library-row": {"get": "manage", "post": "manage"},
    "scheduling:library-restore": {"post": "manage"},
    "scheduling:site-edition": {"get": "read", "post": "manage"},
    "scheduling:site-edition-end": {"post": "manage"},
    "scheduling:site-winter": {"get": "manage", "post": "manage"},
    "scheduling:schedule": {"get": "read"},
    "scheduling:schedule-answers": {"get": "manage", "post": "manage"},
    "scheduling:sprinklers-new": {"get": "manage", "post": "manage"},
    "scheduling:sprinklers-edit": {"get": "manage", "post": "manage"},
    "scheduling:last-done": {"get": "manage", "post": "manage"},
    "scheduling:occurrence-complete": {"get": "record", "post": "record"},
    "scheduling:occurrence-skip": {"get": "record", "post": "record"},
    "scheduling:inspection": {"get": "read"},
    "scheduling:inspection-withdraw": {"get": "record", "post": "record"},
    "scheduling:attachment": {"get": "read"},
    "registry:attachment": {"get": "read"},
    "registry:attachment-take-back": {"get": "record", "post": "record"},
    "scheduling:impairments": {"get": "read"},
    "scheduling:impairment-start": {"get": "record", "post": "record"},
    "scheduling:impairment-end": {"get": "record", "post": "record"},
    "reports:metrics": {"get": "used up"},  # without a token of its own nobody has them
    "reports:portfolio": {"get": "signed in"},
    "reports:portfolio-csv": {"get": "signed in"},
    "reports:portfolio-xlsx": {"get": "signed in"},
    "reports:view-save": {"post": "signed in"},
    "reports:view-drop": {"post": "import"},
    "reports:sites": {"get": "signed in"},
    "reports:prices": {"get": "manage", "post": "manage"},
    "reports:find": {"get": "signed in"},
    "reports:portfolio-report": {"get": "signed in"},
    "reports:portfolio-report-pdf": {"get": "signed in"},
    "reports:site-report": {"get": "read"},
    "reports:site-report-pdf": {"get": "read"},
    "reports:kept": {"get": "signed in", "post": "signed in"},
    "reports:kept-file": {"get": "mine"},
    "reports:kept-schedule-end": {"post": "mine"},
    "reports:visit": {"get": "read"},
    "reports:visit-pdf": {"get": "read"},
    "reports:labels": {"get": "read"},
    "reports:hand-over": {"get": "read"},
    "reports:order-sheet": {"get": "read"},
    "reports:day-sheets": {"get": "signed in"},
    "reports:ledger": {"get": "read"},
    "reports:ledger-csv": {"get": "read"},
    "reports:register-csv": {"get": "read"},
    "reports:register-xlsx": {"get": "read"},
    "reports:audit": {"get": "signed in"},
    "reports:audit-csv": {"get": "signed in"},
    "reports:certificate": {"get": "read"},
    "reports:certificate-proof": {"get": "read"},
    "reports:proof": {"get": "signed in", "post": "signed in"},
    "reports:packages": {"get": "prove", "post": "prove"},
    "reports:checkpoint": {"get": "prove"},
    "reports:package": {"get": "prove"},
    "reports:package-file": {"get": "prove"},
    "reports:package-share": {"post": "prove"},
    "reports:package-unshare": {"post": "prove"},
    "reports:shared": {"get": "public"},
    "reports:shared-file": {"get": "public"},
    "reports:demanded": {"get": "signed in"},
    "reports:auditors": {"get": "manage"},
    "reports:audit-access": {"get": "manage", "post": "manage"},
    "reports:audit-access-end": {"post": "manage"},
    "reports:risk": {"get": "read"},
    "reports:risk-pdf": {"get": "read"},
    "reports:risk-case": {"get": "read"},
    "reports:risk-changed": {"get": "read"},
    "reports:riser-sign": {"get": "read", "post": "record"},
    "reports:riser-sign-up": {"post": "record"},
    "reports:riser-sign-end": {"post": "record"},
    "reports:riser-sign-settings": {"get": "manage", "post": "manage"},
    "reports:matrix": {"get": "signed in"},
    "reports:assumptions": {"get": "signed in"},
    "registry:assumptions": {"get": "read", "post": "manage"},
}

DATA = {
    "registry:run-step": {"token": "purged-1"},
    "scheduling:several": {"deed": "order"},
}


def walk(patterns, namespace="", before=""):
    """Name and route of every address but those of the admin."""
    for entry in patterns:
        route = before + str(entry.pattern)
        if isinstance(entry, URLPattern):
            yield f"{namespace}:{entry.name}" if namespace else entry.name, route
        elif entry.namespace != "admin":
            yield from walk(entry.url_patterns, entry.namespace or namespace, route)


LISTS = (
    "reports:portfolio", "reports:portfolio-csv", "reports:portfolio-report", "reports:audit",
    "reports:audit-csv", "scheduling:work", "scheduling:due",
)  # fmt: skip


PEOPLE = ("owner", "technician", "viewer", "auditor", "stranger")
SIGN_IN_FIRST = "/sign-in/?next="


def test_every_address_says_who_may_use_it():
    assert {name for name, _ in walk(get_resolver().url_patterns)} == set(ADDRESSES)


class AccessTest(TestCase):
    """World and objects are made once; each request is rolled back, so none sees another's."""

    @classmethod
    def setUpTestData(cls):
        cls.world = make_world()
        cls.objects = make_objects(cls.world)
        cls.cookies = {person: _signed_in(getattr(cls.world, person)) for person in PEOPLE}
        cls.cookies["nobody"] = SimpleCookie()

    def ask(self, person: str, name: str, method: str):
        client = Client()
        client.cookies = deepcopy(self.cookies[person])
        address = reverse(name, kwargs=self.objects.get(name, {}))
        response = getattr(client, method)(address, DATA.get(name))
        response.body = b"".join(response)  # read to its end, a file is closed
        return response

    def check(self, person: str):
        for name, rights in ADDRESSES.items():
            for method, right in rights.items():
                savepoint = transaction.savepoint()
                with self.subTest(name=name, method=method):
                    response = self.ask(person, name, method)
                    self.assertEqual(_outcome(response), MEANING[right][person])
                transaction.savepoint_rollback(savepoint)

    def test_owner(self):
        self.check("owner")

    def test_technician(self):
        self.check("technician")

    def test_viewer(self):
        self.check("viewer")

    def test_auditor(self):
        self.check("auditor")

    def test_stranger(self):
        self.check("stranger")

    def test_nobody(self):
        self.check("nobody")

    def test_lists_show_a_stranger_nothing_of_somebody_elses_book(self):
        for name in LISTS:
            with self.subTest(name=name):
                ours = self.ask("owner", name, "get").body
                theirs = self.ask("stranger", name, "get").body
                self.assertIn(b"NQ-101", ours)
                self.assertNotIn(b"NQ-101", theirs)
                self.assertNotIn(b"North Quay", theirs)

    def test_the_import_is_offered_to_those_who_may_and_to_nobody_else(self):
        for person in PEOPLE:
            with self.subTest(person=person):
                page = self.ask(person, "reports:portfolio", "get").body.decode()
                is_offered = f'href="{reverse("registry:import-new")}"' in page
                self.assertEqual(is_offered, MEANING["manage own"][person] == OK)

    def test_the_keepers_admin_is_closed_to_everybody_else(self):
        for person in PEOPLE:
            with self.subTest(person=person):
                response = self.ask(person, "admin:index", "get")
                self.assertRedirects(
                    response,
                    f"{reverse('admin:login')}?next={reverse('admin:index')}",
                    fetch_redirect_response=False,
                )


def _signed_in(user) -> SimpleCookie:
    client = Client()
    client.force_login(user)
    return client.cookies


def _outcome(response):
    """What the person got, in the words of MEANING."""
    if response.status_code == 302 and response["Location"].startswith(SIGN_IN_FIRST):
        return SIGN_IN
    if response.status_code < 400 or response.status_code == FORM_TO_MEND:
        return OK
    return response.status_code
