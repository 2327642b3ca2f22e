# A joinery with 80 kVA of solar on its workshop roof. All figures are made up:
# put in your own. "trefoil check" tells what does not hold, "trefoil calc" shows
# the working of every run, "trefoil explain RULE" what a rule looks at.
#
# This is an aid. Local codes and the licensed person responsible decide.

site "joinery" {
  ratings            = "iec-60364-5-52:2009" # the rating set; "trefoil tables" lists them
  stage              = "concept"             # concept, approval, construction, as-built
  voltage_v          = 400                   # line to line
  air_c              = 40                    # ambient of every route in air that says nothing else
  soil_c             = 20
  soil_km_w          = 1.5 # thermal resistivity of the soil
  rise_limit_percent = 2.0 # from the point of supply to every source
  rise_limit_origin  = "connection offer (put in yours)"
}

# The point of supply, and what the network says of it.
supply "grid" {
  fault_ka       = 10   # highest three-phase prospective current
  fault_min_ka   = 6    # lowest, for disconnection and hot withstand
  earth_loop_ohm = 0.05 # earth-fault loop at the point of supply
  earthing       = "tn-s"
  max_v          = 424 # greatest voltage of the network
  origin         = "connection offer (put in yours)"
}

# One block stands for both inverters: inv[west] and inv[east].
source "inv" {
  copies        = ["west", "east"]
  kind          = "inverter" # inverter, battery, generator
  rated_kva     = 40
  max_current_a = 61 # greatest continuous current, from the data sheet
  power_factor  = 1.0
  phases        = 3 # or 1, with phase = "L1"
  needs_neutral = true
  max_v         = 440    # it leaves the network above that
  rcd           = "none" # the maker's advice: none, a, f, b
  terminals {
    materials    = ["copper"] # what its terminals are for
    min_mm2      = 10
    max_mm2      = 50
    max_device_a = 100 # the greatest device that the maker allows in front of it
  }
}

board "solar" {
  rated_a             = 250
  rated_short_time_ka = 25
  diversity           = 1.0 # all ways at full output together
}

board "main" {
  rated_a             = 630
  rated_short_time_ka = 25
  holds               = "loads" # sources, loads
}

cable "cu-4c" {
  conductor  = "copper"    # copper, aluminium
  strands    = "stranded"  # solid, stranded, flexible
  insulation = "xlpe-90"   # pvc-70, xlpe-90 ...
  build      = "multicore" # or single-core, with formation = "trefoil"
  cores      = "4c+e"
}

# A route is one tray, conduit, duct bank or trench; all its runs share it, and so
# does whatever lies there already.
route "roof-tray" {
  laid           = "perforated-tray"
  lid            = false # a lid makes an enclosure of it
  sun            = true
  sun_adds_c     = 20 # what sun adds to the ambient temperature
  other_circuits = 0  # loaded circuits of other projects: go and look
}

route "wall" {
  laid           = "ladder"
  vertical       = true
  other_circuits = 1
}

route "yard" {
  laid           = "buried-duct"
  depth_m        = 0.6
  other_circuits = 0
}

run "inv" {
  copies    = ["west", "east"]
  from      = source.inv[copy.key]
  to        = board.solar
  cable     = cable.cu-4c
  size_mm2  = 35
  earth_mm2 = 16
  device {
    at          = board.solar
    kind        = "mccb" # mcb, mccb, fuse
    rated_a     = 80     # the setting, where adjustable
    instant_a   = 640    # instantaneous trip
    breaking_ka = 16
    let_through = [[5, 1e5], [16, 3e5]] # the maker's: prospective kA, A2s
  }
  section {
    route       = route.roof-tray
    length_m    = 12 + 6 * copy.number
    length_from = "scaled" # measured, scaled, estimated
  }
  section {
    route       = route.wall
    length_m    = 7
    length_from = "scaled"
  }
}

run "solar" {
  from      = board.solar
  to        = board.main
  cable     = cable.cu-4c
  size_mm2  = 95
  earth_mm2 = 50
  device {
    at          = board.main
    kind        = "mccb"
    rated_a     = 160
    instant_a   = 1280
    breaking_ka = 16
    let_through = [[5, 4e5], [16, 9e5]]
  }
  section {
    route       = route.yard
    length_m    = 40
    length_from = "scaled"
  }
}

run "consumer-mains" {
  from      = supply.grid
  to        = board.main
  cable     = cable.cu-4c
  size_mm2  = 240
  earth_mm2 = 120
  device {
    kind        = "mccb"
    rated_a     = 315
    instant_a   = 2500
    breaking_ka = 16
    let_through = [[5, 1e6], [16, 2e6]]
  }
  section {
    route       = route.wall
    length_m    = 10
    length_from = "scaled"
  }
}
