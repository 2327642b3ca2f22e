route "roof-north" {
  laid           = "perforated-tray"
  lid            = true # late change: the client wants the birds off the cables
  air_c          = 45
  sun            = true
  sun_adds_c     = 20
  other_circuits = 0
}

route "roof-south" {
  laid           = "perforated-tray"
  air_c          = 45
  sun            = true
  sun_adds_c     = 20
  other_circuits = 0
}

route "riser" {
  laid           = "ladder"
  vertical       = true
  other_circuits = 2 # refrigeration feeders, seen on site
}

route "yard-ducts" {
  laid           = "buried-duct"
  depth_m        = 0.6
  ducts          = "per-circuit"
  other_circuits = 1
  duct_inside_mm = 150
  other_outer_mm = 45
}

route "plant-room" {
  laid           = "ladder"
  other_circuits = 2 # late change: the feeders of two lorry chargers
}

route "kiosk-trench" {
  laid           = "buried"
  depth_m        = 0.7
  other_circuits = 0
}
