// for now
