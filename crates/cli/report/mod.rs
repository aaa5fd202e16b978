//! What people read: text and HTML.
