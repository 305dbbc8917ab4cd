//! guardrow-findings
