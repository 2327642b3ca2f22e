# A village bakery puts 60 kVA of solar on its roof: two inverters, a short
# tray, one board. Everything here is made up.

site "bakery" {
  ratings            = "iec-60364-5-52:2009"
  stage              = "approval"
  voltage_v          = 400
  air_c              = 35
  rise_limit_percent = 2.0
  rise_limit_origin  = "connection letter, page 2"
}

supply "street" {
  fault_ka       = 8.2
  fault_min_ka   = 5.5
  earth_loop_ohm = 0.04
  earthing       = "tn-s"
  max_v          = 424
  origin         = "connection letter, page 1"
}

board "main" {
  rated_a             = 250
  rated_short_time_ka = 10
  diversity           = 1.0
  holds               = "loads" # ovens, lights: 125 A of the supply and 2 x 50 A of the inverters meet here
}

# The two inverters are alike; one block stands for both.
source "inv" {
  copies        = ["left", "right"]
  kind          = "inverter"
  rated_kva     = 30
  max_current_a = 45.5
  phases        = 3
  needs_neutral = true
  max_v         = 440    # it leaves the network above that
  rcd           = "none" # by its data sheet
  terminals {
    materials    = ["copper"]
    min_mm2      = 6
    max_mm2      = 25
    max_device_a = 63
  }
}

cable "cu-5g" {
  conductor  = "copper"
  strands    = "flexible"
  insulation = "xlpe-90"
  build      = "multicore"
  cores      = "4c+e"
}

route "loft-tray" {
  laid           = "perforated-tray"
  air_c          = 45 # under the tiles
  other_circuits = 1  # the old lighting circuit
}

route "wall" {
  laid           = "clipped"
  other_circuits = 0
}

route "meter-cupboard" {
  laid           = "clipped"
  other_circuits = 0
}

run "inv" {
  copies    = ["left", "right"]
  from      = source.inv[copy.key]
  to        = board.main
  cable     = cable.cu-5g
  size_mm2  = 16
  earth_mm2 = 16
  device {
    at            = board.main
    kind          = "mcb"
    trip          = "c"
    rated_a       = 50
    row_factor    = 1 # with spacers
    factor_origin = "breaker maker's sheet, page 4"
    breaking_ka   = 10
    let_through   = [[3, 2.1e4], [6, 4.4e4], [10, 8e4]]
  }
  section {
    route       = route.loft-tray
    length_m    = 14 + 3 * copy.number
    length_from = "measured"
  }
  section {
    route       = route.wall
    length_m    = 6
    length_from = "measured"
  }
}

run "consumer-mains" {
  from      = supply.street
  to        = board.main
  cable     = cable.cu-5g
  size_mm2  = 70
  earth_mm2 = 35
  device {
    kind        = "mccb"
    rated_a     = 125
    instant_a   = 1250
    breaking_ka = 25
    let_through = [[10, 6e5], [25, 9e5]]
  }
  section {
    route       = route.meter-cupboard
    length_m    = 9
    length_from = "measured"
  }
}
