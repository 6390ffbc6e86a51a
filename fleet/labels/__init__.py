"""The label decoder: from what a scanner read to facts about one device. Pure Python, no Django.

Start at :mod:`fleet.labels.decode`; :mod:`fleet.labels.reading` says what comes out.
"""
