from django import forms
from django.utils.translation import gettext_lazy as _

from registry.models import Organisation, User


class SaveViewForm(forms.Form):
    """A name for the filters, columns and order of an address."""

    name = forms.CharField(
        label=_("Name of the view"), max_length=40,
        widget=forms.TextInput(attrs={"placeholder": _("Cold halls"), "autocomplete": "off"}),
    )  # fmt: skip
    organisation = forms.ModelChoiceField(
        Organisation.objects.none(), label=_("For everybody of"), empty_label=None
    )
    query = forms.CharField(required=False, max_length=1000, widget=forms.HiddenInput)

    def __init__(self, *args, user: User, **kwargs):
        super().__init__(*args, **kwargs)
        mine = user.memberships.filter(role__in=("manager", "recorder"))
        offered = Organisation.objects.filter(pk__in=mine.values("organisation"))
        field = self.fields["organisation"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = offered
        if offered.count() == 1:
            field.widget = forms.HiddenInput()
            field.initial = offered.get().pk
            self.fields["organisation"].initial = field.initial
