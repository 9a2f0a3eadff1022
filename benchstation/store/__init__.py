"""What is kept: the journal, its traces and the tables that people search.

The journal is the truth (:mod:`.journal`); the tables are its projections (:mod:`.projections`).
Start at :func:`benchstation.store.engine.open_store`; read with :mod:`benchstation.store.queries`.
"""
