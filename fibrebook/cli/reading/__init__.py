"""Commands that read what was never written for us, and ask until it is understood.

In come a file and answers typed or given in a file; out go sentences, questions, and one commit once all is confirmed.
"""
