-- A squawk that was filed of a finding shows the finding's photos: it is found by the squawk.
CREATE INDEX walkaround_squawk_of_squawk ON walkaround_squawk (organization, squawk);
