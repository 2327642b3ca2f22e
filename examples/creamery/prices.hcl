# Prices to see what a change costs. Every figure is made up.

price "made-up" {
  currency     = "EUR"
  date         = "2027-01-15"
  origin       = "made up for this example"
  labour_per_h = 54

  cable "cu-4c" {
    per_m = { 35 = 21, 50 = 28.5, 70 = 39 }
  }
  cable "cu-1c" {
    per_m = { 185 = 24, 240 = 31.5 }
  }
  earth "copper" {
    per_m = { 95 = 12.6, 120 = 15.8 }
  }
  lug "copper" {
    each = { 16 = 1, 25 = 1.3, 35 = 1.7, 50 = 2.3, 95 = 4.6, 120 = 5.8, 185 = 9.4, 240 = 12.5 }
  }
  gland {
    each  = { 25 = 4.2, 40 = 8.8, 63 = 22 }
    hours = { 32 = 0.2, 63 = 0.35 }
  }
  termination "copper" {
    hours = { 16 = 0.08, 25 = 0.1, 35 = 0.12, 50 = 0.15, 95 = 0.22, 120 = 0.26, 185 = 0.35, 240 = 0.42 }
  }
  laying "perforated-tray" {
    per_m             = 27
    hours_per_m       = 0.25
    lid_per_m         = 12
    lid_hours_per_m   = 0.08
    cable_hours_per_m = { 35 = 0.11, 50 = 0.13 }
  }
  laying "ladder" {
    per_m             = 38
    hours_per_m       = 0.3
    cable_hours_per_m = { 95 = 0.2, 120 = 0.23, 185 = 0.3, 240 = 0.35 }
  }
  laying "clipped" {
    fixing_each       = 1.6
    fixing_hours      = 0.05
    cable_hours_per_m = { 35 = 0.12 }
  }
}
