"""The static files' storage: compressed, named by their content, ES module imports included."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStorage(CompressedManifestStaticFilesStorage):
    """Give every static file a name that changes with its content, so that a browser may keep it for ever."""

    support_js_module_import_aggregation = True
