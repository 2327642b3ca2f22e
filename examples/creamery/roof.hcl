source "roof" {
  copies        = 4
  kind          = "inverter"
  rated_kva     = 50
  max_current_a = 76
  phases        = 3
  needs_neutral = false
  max_v         = 440
  rcd           = "none"
  terminals {
    materials    = ["copper"]
    min_mm2      = 16
    max_mm2      = 95
    max_device_a = 125
  }
}

route "roof-tray" {
  laid           = "perforated-tray"
  air_c          = 40
  other_circuits = 0
}

run "roof" {
  copies    = 4
  from      = source.roof[copy.key]
  to        = board.generation
  cable     = cable.cu-4c
  size_mm2  = 35
  earth_mm2 = 16
  device {
    at          = board.generation
    kind        = "mccb"
    rated_a     = 80
    instant_a   = 640
    breaking_ka = 25
    let_through = [[10, 4e5], [25, 7e5]]
  }
  section {
    route       = route.roof-tray
    length_m    = 20 + 4 * copy.number
    length_from = "measured"
  }
}
