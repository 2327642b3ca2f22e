# A creamery with four inverters on the roof of its hall. Everything here is made up.
# review/ holds what five later commits do to it, as trefoil compare tells.

site "creamery" {
  ratings            = "iec-60364-5-52:2009"
  stage              = "approval"
  voltage_v          = 400
  air_c              = 35
  rise_limit_percent = 2.0
  rise_limit_origin  = "connection offer, page 4"
  drop_limit_percent = 4.0
  drop_limit_origin  = "owner's brief"
}

supply "grid" {
  fault_ka       = 14
  fault_min_ka   = 8
  earth_loop_ohm = 0.03
  earthing       = "tn-s"
  max_v          = 424
  origin         = "connection offer, page 2"
}

board "main" {
  rated_a             = 1250
  rated_short_time_ka = 25
  diversity           = 1.0
  holds               = "loads"
}

board "generation" {
  rated_a             = 400
  rated_short_time_ka = 16
  diversity           = 1.0
  holds               = "sources"
  main_switch {
    kind    = "switch-disconnector"
    rated_a = 400
  }
}

cable "cu-4c" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}

cable "cu-1c" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "single-core"
  formation  = "trefoil"
}

route "plant-room" {
  laid           = "ladder"
  other_circuits = 0
}

run "consumer-mains" {
  from        = supply.grid
  to          = board.main
  cable       = cable.cu-1c
  size_mm2    = 240
  neutral_mm2 = 240
  earth_mm2   = 120
  parallel    = 2
  device {
    at          = supply.grid
    kind        = "mccb"
    rated_a     = 630
    instant_a   = 5040
    breaking_ka = 36
    let_through = [[10, 1.2e6], [25, 2.6e6]]
  }
  section {
    route       = route.plant-room
    length_m    = 18
    length_from = "measured"
  }
}

run "generation" {
  from        = board.generation
  to          = board.main
  cable       = cable.cu-1c
  size_mm2    = 185
  neutral_mm2 = 185
  earth_mm2   = 95
  device {
    at          = board.main
    kind        = "mccb"
    rated_a     = 400
    instant_a   = 3200
    breaking_ka = 36
    let_through = [[10, 9e5], [25, 2e6]]
  }
  section {
    route       = route.plant-room
    length_m    = 12
    length_from = "measured"
  }
}
