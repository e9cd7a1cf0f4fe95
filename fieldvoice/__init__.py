"""fieldvoice: a beekeeper's talk becomes a log that can be trusted.

The rooms stand in the order in which a recording passes through them:

    hearing      recording -> transcript: sound, speech, words, and how sure
    extraction   transcript -> drafts: what was done, seen, missed, planned
    review       drafts -> decisions: a person confirms, edits, rejects
    logbook      decisions -> entries: one SQLite file, with its history
    answers      entries -> what the keeper asks: feed, mites, what is due

`types` holds what is handed from one room to the next, `trade` the trade's
words and figures as data, `pipeline` the whole way in a few lines.
"""

import os

# onnxruntime's Linux builds since 1.29 send usage data to their maker unless this is set
# before they are loaded. Nothing leaves this computer.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

__version__ = "0.1.0"
