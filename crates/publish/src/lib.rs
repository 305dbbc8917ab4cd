//! guardrow-publish
