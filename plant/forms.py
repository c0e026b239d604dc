"""How forms are drawn, and fields that read a figure with its unit."""

from django.forms.renderers import TemplatesSetting


class Renderer(TemplatesSetting):
    """Draws fields by our own templates: label, hint, field, error beside it."""

    form_template_name = "form.html"
    field_template_name = "field.html"
