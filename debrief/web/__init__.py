"""The page: ``debrief serve``. A view of stored results, with the upload, the queue and the accounts that it needs.

Owns      the data folder, its database and its queue, accounts and what each may do, pages, the HTTP interface.
Not here  any measure or verdict: a worker process stores what the library says, and a page shows it.
"""
