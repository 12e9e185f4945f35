"""Which movements of the hand lead from the standard planes to what was seen: a fit of heart and pose to landmarks."""
