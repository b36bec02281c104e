"""The boat's broker: state, alarms and events go out, a few harmless commands may come in. See TOPICS.md."""
