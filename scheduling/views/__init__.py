from scheduling.views.feeds import feed, feed_new, feed_revoke, feeds
from scheduling.views.work import task, work

__all__ = ["feed", "feed_new", "feed_revoke", "feeds", "task", "work"]
