cable "cu-4c" {
  conductor  = "copper"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
  uv_proof   = true # black sheath, data sheet page 1
}

cable "al-4c" {
  conductor  = "aluminium"
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

run "north" {
  copies    = let.inverters
  from      = source.north[copy.key]
  to        = board.hall-north
  cable     = cable.cu-4c
  size_mm2  = 35
  earth_mm2 = 16
  device {
    at          = board.hall-north
    kind        = "mccb"
    rated_a     = 80
    instant_a   = 640
    let_through = [[10, 1.5e5], [25, 3e5]]
    breaking_ka = 25
  }
  section {
    route       = route.roof-north
    length_m    = 12 + 8 * copy.number
    length_from = "scaled"
  }
}

run "south" {
  copies    = let.inverters
  from      = source.south[copy.key]
  to        = board.hall-south
  cable     = cable.cu-4c
  size_mm2  = 35
  earth_mm2 = 16
  device {
    at          = board.hall-south
    kind        = "mccb"
    rated_a     = 80
    instant_a   = 640
    let_through = [[10, 1.5e5], [25, 3e5]]
    breaking_ka = 25
  }
  section {
    route       = route.roof-south
    length_m    = 12 + 8 * copy.number
    length_from = "scaled"
  }
}

run "hall-north" {
  from      = board.hall-north
  to        = board.generation
  cable     = cable.al-4c
  size_mm2  = 240
  earth_mm2 = 120
  device {
    at          = board.generation
    kind        = "mccb"
    rated_a     = 320
    instant_a   = 2000
    let_through = [[10, 1.5e6], [25, 2.5e6]]
    breaking_ka = 36
  }
  section {
    route       = route.riser
    length_m    = 14
    length_from = "measured"
  }
  section {
    route       = route.plant-room
    length_m    = 22
    length_from = "measured"
  }
  ends {
    at  = board.hall-north
    lug = "aluminium"
  }
  ends {
    at  = board.generation
    lug = "aluminium"
  }
}

run "hall-south" {
  from      = board.hall-south
  to        = board.generation
  cable     = cable.al-4c
  size_mm2  = 240
  earth_mm2 = 120
  parallel  = 2
  device {
    at          = board.generation
    kind        = "mccb"
    rated_a     = 320
    instant_a   = 2000
    let_through = [[10, 1.5e6], [25, 2.5e6]]
    breaking_ka = 36
  }
  section {
    route       = route.yard-ducts
    length_m    = 110
    length_from = "scaled"
  }
  ends {
    at  = board.hall-south
    lug = "aluminium"
  }
  ends {
    at  = board.generation
    lug = "aluminium"
  }
}

run "battery" {
  from      = source.battery
  to        = board.generation
  cable     = cable.cu-4c
  size_mm2  = 50
  earth_mm2 = 25
  device {
    at          = board.generation
    kind        = "mccb"
    rated_a     = 160
    instant_a   = 1280
    let_through = [[10, 6e5], [25, 1e6]]
    breaking_ka = 36
  }
  section {
    route       = route.plant-room
    length_m    = 12
    length_from = "measured"
  }
}

run "generation" {
  from      = board.generation
  to        = board.main
  cable     = cable.cu-1c
  size_mm2  = 300
  earth_mm2 = 150
  parallel  = 2
  device {
    at          = board.main
    kind        = "mccb"
    rated_a     = 800
    instant_a   = 4000
    let_through = [[20, 5e6]]
    breaking_ka = 50
  }
  section {
    route       = route.plant-room
    length_m    = 9
    length_from = "measured"
  }
}

run "consumer-mains" {
  from     = supply.kiosk
  to       = board.main
  cable    = cable.cu-1c
  size_mm2 = 300
  parallel = 4
  device {
    at          = supply.kiosk
    kind        = "mccb"
    rated_a     = 1250
    instant_a   = 5000
    let_through = [[20, 2e7]]
    breaking_ka = 50
  }
  section {
    route       = route.kiosk-trench
    length_m    = 28
    length_from = "measured"
  }
}
