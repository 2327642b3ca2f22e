# Four inverters a hall, and one battery inverter in the plant room.

let {
  inverters = ["1", "2", "3", "4"]
  unit_kva  = 50
  unit_a    = 76 # greatest continuous current, data sheet page 2
}

source "north" {
  copies        = let.inverters
  kind          = "inverter"
  rated_kva     = let.unit_kva
  max_current_a = let.unit_a
  phases        = 3
  needs_neutral = true
  max_v         = 440
  rcd           = "none"
  terminals {
    materials    = ["copper"]
    min_mm2      = 16
    max_mm2      = 50
    max_device_a = 125
  }
}

source "south" {
  copies        = let.inverters
  kind          = "inverter"
  rated_kva     = let.unit_kva
  max_current_a = let.unit_a
  phases        = 3
  needs_neutral = true
  max_v         = 440
  rcd           = "none"
  terminals {
    materials    = ["copper"]
    min_mm2      = 16
    max_mm2      = 50
    max_device_a = 125
  }
}

source "battery" {
  kind          = "battery"
  rated_kva     = 100
  max_current_a = 152
  charge_kva    = 80
  phases        = 3
  needs_neutral = true
  max_v         = 440
  rcd           = "none"
  terminals {
    materials    = ["copper", "aluminium"]
    min_mm2      = 25
    max_mm2      = 120
    max_device_a = 200
  }
}
