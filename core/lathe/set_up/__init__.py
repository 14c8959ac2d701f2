"""Set-up of the lathe: what is asked, what is worked out from measurements, what is kept."""
