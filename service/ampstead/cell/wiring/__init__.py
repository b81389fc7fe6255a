"""Leads and supplies, and a battery that serves as one."""
