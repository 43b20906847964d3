"""How one person says each phrase: takes kept on disk, templates made of them, evidence joined.

Clips and templates belong to the person: they lie in one folder of their own and one command
removes them. Nothing here compares people: a voice is only ever used for the person who is named,
to tell that person's phrases apart, never to tell who somebody is.
"""
