"""What people are told and asked (human-machine interface, ISA-101): ids and numbers; the words are report's."""
